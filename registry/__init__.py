"""Patients, injuries, procedures and constructs of Holdfast."""
