"""Estimators: arrays in, small frozen results out."""
