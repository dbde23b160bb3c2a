"""The only room that opens files; one format a module."""
