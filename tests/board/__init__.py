"""Tests of how the sides are put together."""
