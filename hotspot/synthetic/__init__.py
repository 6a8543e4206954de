"""Connectors with known truth: a heat simulator and a camera, for tests, docs, benchmarks and the demo."""
