package picture

const simdAvailable = false
