"""What the page says of each family in plain words, kept by hand; the generator adds what the rows themselves say."""

REMARKS: dict[str, str] = {
    "ship standard": "The 2002 edition from memory; the tables of the 2022 edition were not seen. The comparison with "
    "the hour-by-hour engine is reported, not judged: it shows what a steady basis leaves out.",
}
