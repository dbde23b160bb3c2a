"""From a picture to the negative, strip by strip."""
