"""Sheets cut into tables: where headings stand, which rows hold marks, which columns are keys."""
