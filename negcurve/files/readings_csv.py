"""Readings as CSV: writing our own form, reading it and lists typed by hand.

Numbers only; which patches a target has comes from its layout.
"""
