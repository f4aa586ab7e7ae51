"""Words of the page of records."""

RECORDS = "Records"
