"""Files that people write: venues, assignments and the mappings of their spreadsheets."""
