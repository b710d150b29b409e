"""The FHIR R4 interface: reading, searching, taking in, and exporting in bulk."""
