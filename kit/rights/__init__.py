"""May this be published? What the teacher states, and the usual terms of protection."""
