"""People, injuries, operations and parts as FHIR R4 has them, out and in."""
