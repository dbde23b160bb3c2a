"""One self-contained page that tells the whole story of a calibration."""
