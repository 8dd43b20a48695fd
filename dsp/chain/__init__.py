"""The chain behind the guitar: tone stack, soft stage, loudspeaker; of no product."""
