"""Figures from results; the only room that loads matplotlib."""
