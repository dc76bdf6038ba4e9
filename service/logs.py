"""Structured logs: one JSON object a line on standard error, or text for a person at a terminal."""

import logging
import sys

import structlog


class _StandardError:
    """Standard error as it is at each line, not as it was when logging was set up."""

    def write(self, text: str) -> None:
        sys.stderr.write(text)

    def flush(self) -> None:
        sys.stderr.flush()


def configure_logs(level: int = logging.INFO) -> None:
    """Set structlog up for this process."""
    person = sys.stderr.isatty()
    renderer: structlog.typing.Processor = (
        structlog.dev.ConsoleRenderer() if person else structlog.processors.JSONRenderer()
    )
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.WriteLoggerFactory(file=_StandardError()),  # type: ignore[arg-type]
        cache_logger_on_first_use=True,
    )
