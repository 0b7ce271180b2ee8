"""What students get: handouts, pages, bundles, and the build that makes them.

The two exporters are entry points of nbconvert (`handout_exporter.HandoutExporter`,
`page.PageExporter`). Modules are imported one by one where they are needed, because each
brings a large library with it; this package therefore offers no names of its own.
"""
