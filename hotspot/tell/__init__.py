"""Findings -> words, charts, marked frames, tables, one report file. Computes nothing new."""
