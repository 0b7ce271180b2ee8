"""The figures and the player, alive in JupyterLab."""
