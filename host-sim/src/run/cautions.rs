//! What whoever looks at a run has to know.

/// What stands before anything else, on the page and in the README.
pub const CAUTIONS: [&str; 6] = [
    "This is a simulation, and dosewarden is not a certified safety function. It does not replace a \
     protective device.",
    "The hard-wired interlock stays: wire a flow switch and the circulation pump's contact in series \
     with the supply of every feeder.",
    "Local codes, licensed practice and a product's label come first where they are stricter.",
    "Never mix acid and hypochlorite: not in a drum, a line or a bucket. Together they give off \
     chlorine gas at once.",
    "Gloves and goggles at every drum, line and fitting. Add chemical to water, never water to \
     chemical.",
    "The pool is empty of people before the circulation restarts after a feed without flow.",
];
