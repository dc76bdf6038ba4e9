"""An installation whose watch has just done its round."""

from service.operations import health, retention
from service.operations.support.context import Services


def watched(services: Services) -> None:
    """Note what `heelmark watch` notes after a round and a night's retention."""
    health.beat(services, health.WATCH)
    health.beat(services, retention.PROCESS)
