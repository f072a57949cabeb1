"""What `--save` writes: a page that stands alone, tables, the folder."""
