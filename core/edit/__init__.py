"""Pure commands: lesson -> (lesson, Change), or EditRefused; and the history of snapshots."""
