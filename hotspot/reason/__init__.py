"""Readings -> findings: rise over ambient, comparison with peers, verdicts, before and after. No disk."""
