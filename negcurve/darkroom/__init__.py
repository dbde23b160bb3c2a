"""The wet side, numbers only: tablet, exposure, coating, solutions, sequences."""
