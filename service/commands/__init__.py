"""Commands of an operator that run for long or touch the machine; ``service.cli`` gathers them."""
