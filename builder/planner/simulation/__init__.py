"""The invented register: eyes drawn from published population figures with a fixed seed. No real person is in it."""
