"""Why a kit stands where it does, what would mend it, and why there is none."""
