"""The window on a field: drawn and changed by hand."""
