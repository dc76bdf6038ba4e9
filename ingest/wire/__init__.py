"""What comes and goes: MQTT, HTTP, and bytes as readings in SI."""
