"""HTTP itself: problem details, paging, ETags, rate limits, the OpenAPI document. No resource is known here."""
