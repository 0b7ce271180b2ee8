"""What students get: handouts, pages, recording aids, video, bundles, catalogue.

The two exporters are entry points of nbconvert
(`kit.publish.handout.exporter.HandoutExporter`, `kit.publish.page.exporter.PageExporter`).
Modules are imported one by one where they are needed, because each brings a large library
with it; this package therefore offers no names of its own.
"""
