# Fits the swatches that bench-effects wrote with lme4 and lmerTest, RUNS times, and
# prints one line of JSON like its. Debian: r-cran-lme4 r-cran-lmertest.
#
#   Rscript bench/bench-effects/effects_lme4.R DIR RUNS
suppressPackageStartupMessages(library(lmerTest))
arguments <- commandArgs(TRUE)
seen <- read.csv(file.path(arguments[1], "swatches.csv"), stringsAsFactors = TRUE)
wall <- spent <- c()
for (i in seq_len(as.integer(arguments[2]))) {
  before <- proc.time()
  fit <- lmer(b ~ metal + liquid + wetting + brushing + salt + strength + gap + hours +
    (1 | day) + (1 | run) + (1 | swatch), seen, REML = TRUE)
  found <- coef(summary(fit)) # Satterthwaite's degrees of freedom
  took <- proc.time() - before
  wall <- c(wall, took[["elapsed"]])
  spent <- c(spent, took[["user.self"]] + took[["sys.self"]])
}
# the optimiser's own stop is at 5 to 7 digits; once more with a finer one to judge by
fine <- lmer(formula(fit), seen, REML = TRUE, control = lmerControl(optimizer = "bobyqa",
  optCtrl = list(rhobeg = 0.01, rhoend = 1e-9, maxfun = 1e5)), start = getME(fit, "theta"))
sharp <- coef(summary(fine))
numbers <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ","), "]")
sds <- as.data.frame(VarCorr(fine))
cat(sprintf('{"Names":["%s"],"Estimate":%s,"SE":%s,"DF":%s,"FineEstimate":%s,"FineSE":%s,"FineDF":%s,"SD":{%s},"Criterion":%.17g,"Wall":%s,"Spent":%s}\n',
  paste(rownames(found), collapse = '","'), numbers(found[, 1]), numbers(found[, 2]), numbers(found[, 3]),
  numbers(sharp[, 1]), numbers(sharp[, 2]), numbers(sharp[, 3]),
  paste(sprintf('"%s":%.17g', tolower(sds$grp), sds$sdcor), collapse = ","), REMLcrit(fine), numbers(wall), numbers(spent)))
