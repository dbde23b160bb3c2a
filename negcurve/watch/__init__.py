"""Over time and over the sheet: drift, dry-down, unevenness. Numbers only."""
