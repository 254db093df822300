"""Files in: packet.toml, scans, pictures, reading order."""
