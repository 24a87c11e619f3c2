"""Lines to study: guide tones, arpeggios, scales, target tones, phrases, call and response."""
