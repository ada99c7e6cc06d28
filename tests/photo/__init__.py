"""Tests of opening photos, finding the board in them and straightening it."""
