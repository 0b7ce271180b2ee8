"""What does the teacher need at the camera, and the viewer beside the film?"""
