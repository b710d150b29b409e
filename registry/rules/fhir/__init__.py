"""What FHIR R4 (4.0.1) asks of any server, without a row of ours: elements, dates, codes, queries."""
