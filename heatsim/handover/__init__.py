"""The hand-over pack: one page to read, one workbook, the data set and the scenario with nothing left to defaults."""
