"""Trade facts as data: TOML files with source and date, and the one reader of each."""
