"""Events to other systems: outbox, signing, delivery."""
