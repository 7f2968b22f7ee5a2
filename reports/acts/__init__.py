"""What the shop does with its engines: forms that read what was typed and hand it to the services."""
