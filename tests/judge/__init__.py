"""Tests of the judgement, on readings made by hand."""
