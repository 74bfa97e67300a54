"""A bench of ray-traced eyes: corneas that obey light, what instruments read of them, and what the eye then gets."""
