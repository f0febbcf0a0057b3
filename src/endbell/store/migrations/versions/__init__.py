"""One step a file, in order of their numbers; a step that was released is never changed."""
