def ready_builds(ids): return set()
