"""Stavesight reads the grain of a board from phone photos and says whether a bow can come out of it."""
