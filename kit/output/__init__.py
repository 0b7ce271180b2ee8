"""What stands in an output folder, and whose is it?"""
