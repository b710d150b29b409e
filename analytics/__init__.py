"""Cohorts, endpoint definitions, estimators and answers of Holdfast."""
