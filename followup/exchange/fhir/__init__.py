"""Films, motion, scores, harms and reviews as FHIR R4 has them; the mapping is told in FHIR.md."""
