"""From readings to a lookup table: response, unevenness, ends, aim, table, verdict."""
