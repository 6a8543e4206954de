"""Equations only: one published equation per function, numpy only."""
