"""Rules of the family grid."""
