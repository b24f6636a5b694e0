"""Is this entry sound? What no schema can say: parts held against themselves, their family, the catalog and the profile."""
