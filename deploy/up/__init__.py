"""Runs the whole job on one machine: database, broker, service, ingest worker and, if asked, the demo.

The modules know processes, ports and files; nothing of refrigerants.
"""
