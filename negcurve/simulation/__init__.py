"""Printer, film, lamp, coated paper and scanner that behave like real ones.

Arrays in, arrays out; for the demo and for tests, never for the work itself. What is
called true here is what the simulated darkroom prints without noise.
"""
