package cli

const diskFull = errorDiskFull
