"""Why a constituent is off, and which limits cannot hold together."""
