"""Which kits are legal, what numbers they have, how they are judged and in what order they stand."""
