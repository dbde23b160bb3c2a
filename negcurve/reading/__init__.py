"""From a scan to readings: find the target, place its patches, average them."""
