"""The figures of a lesson: each as a fragment of HTML and as words."""
