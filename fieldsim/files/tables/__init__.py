"""Tables that a spreadsheet has saved as CSV: from bytes to cells, from cells to values, from rows to records."""
