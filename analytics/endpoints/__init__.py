"""Named, versioned rules that turn readings and events into verdicts."""
