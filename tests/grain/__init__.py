"""Tests of grain."""
