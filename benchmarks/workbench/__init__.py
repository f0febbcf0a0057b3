"""The workbench under load and under the hand: how soon it answers with a full shelf behind it."""
