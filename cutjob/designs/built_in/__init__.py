"""The designs that come with the program, a module each; `designs.catalogue` names them."""
