"""Tables of trade values, one CSV file each, with unit in the column name and a source on every row."""
