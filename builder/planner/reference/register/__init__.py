"""The independent calculation of the outcome register: a module a topic, one register of lines at a time."""
