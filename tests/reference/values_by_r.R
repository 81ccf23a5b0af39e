# Values of R's package survival for lives_with_ties.csv, as written to values_by_r.toml:
#   Rscript values_by_r.R > values_by_r.toml          (R 4.2.2, survival 3.5-3)
library(survival)
options(digits = 15, warn = 1)
lives <- read.csv("lives_with_ties.csv", stringsAsFactors = FALSE)

say <- function(name, values) {
  text <- ifelse(is.finite(values), format(values, digits = 15, trim = TRUE), "nan")
  cat(name, " = [", paste(text, collapse = ", "), "]\n", sep = "")
}
head_of <- function(what, fleet) cat("\n[\"", fleet, "\".", what, "]\n", sep = "")

cat("# Written by values_by_r.R:", R.version.string, ", survival", as.character(packageVersion("survival")), "\n")
for (fleet in unique(lives$fleet)) {
  d <- lives[lives$fleet == fleet, ]
  late <- Surv(d$entry, d$exit, d$event)

  head_of("curve", fleet)
  cat("command = \"survfit(Surv(entry, exit, event) ~ 1, conf.type = ...)\"\n")
  for (kind in c("log-log", "log", "plain")) {
    fit <- survfit(late ~ 1, conf.type = kind)
    ends <- fit$n.event > 0
    if (kind == "log-log") {
      say("time", fit$time[ends])
      say("at_risk", fit$n.risk[ends])
      say("survival", fit$surv[ends])
      say("std_error", (fit$std.err * fit$surv)[ends])
      say("cumulative_hazard", fit$cumhaz[ends])
      say("std_error_hazard", fit$std.chaz[ends])
    }
    say(paste0(gsub("-", "_", kind), "_lower"), fit$lower[ends])
    say(paste0(gsub("-", "_", kind), "_upper"), fit$upper[ends])
  }

  head_of("counts", fleet)
  cat("command = \"survfit(Surv(entry, exit, event) ~ 1, cluster = car): cumhaz, std.chaz\"\n")
  fit <- survfit(late ~ 1, cluster = d$car)
  say("time", fit$time[fit$n.event > 0])
  say("mcf", fit$cumhaz[fit$n.event > 0])
  say("std_error", fit$std.chaz[fit$n.event > 0])

  head_of("restricted", fleet)
  cat("command = \"summary(survfit(Surv(exit, event) ~ 1), rmean = horizon), from new on\"\n")
  horizon <- as.numeric(quantile(d$exit, 0.6, type = 1))
  table <- summary(survfit(Surv(d$exit, d$event) ~ 1), rmean = horizon)$table
  say("horizon", horizon)
  say("mean", table[grep("^\\*?rmean", names(table))])
  say("std_error", table[grep("se\\(rmean\\)", names(table))])

  head_of("causes", fleet)
  cat("command = \"survfit(Surv(entry, exit, factor(why)) ~ 1, id = row): pstate; std_error from new on: Surv(exit, why)\"\n")
  why <- factor(ifelse(d$event == 1, d$why, "none"), levels = c("none", "leak", "wear"))
  row <- seq_len(nrow(d))
  fit <- survfit(Surv(d$entry, d$exit, why) ~ 1, id = row)
  ends <- rowSums(fit$n.event) > 0
  say("time", fit$time[ends])
  say("leak", fit$pstate[ends, fit$states == "leak"])
  say("wear", fit$pstate[ends, fit$states == "wear"])
  fit <- survfit(Surv(d$exit, why) ~ 1, id = row)
  ends <- rowSums(fit$n.event) > 0
  say("time_from_new", fit$time[ends])
  for (state in c("leak", "wear")) {
    say(paste0(state, "_from_new"), fit$pstate[ends, fit$states == state])
    say(paste0(state, "_std_error_from_new"), fit$std.err[ends, fit$states == state])
  }

  head_of("test", fleet)
  cat("command = \"coxph(Surv(entry, exit, event) ~ kind, ties = 'exact')$score; from new on survdiff(Surv(exit, event) ~ kind)\"\n")
  say("late_entry", suppressWarnings(coxph(late ~ d$kind, ties = "exact", iter.max = 0))$score)
  say("from_new", survdiff(Surv(d$exit, d$event) ~ d$kind)$chisq)

  head_of("weibull", fleet)
  cat("command = \"survreg(Surv(exit, event) ~ 1); inspected = survreg(Surv(lower, upper, type = 'interval2') ~ 1), every third failure in (exit / 2, exit], every third before exit\"\n")
  if (sum(d$event) > 1) {
    fit <- survreg(Surv(d$exit, d$event) ~ 1)
    say("exact", c(exp(coef(fit)), 1 / fit$scale, fit$loglik[1]))
    third <- ifelse(d$event == 1, cumsum(d$event) %% 3, -1)
    lower <- ifelse(third == 1, d$exit / 2, ifelse(third == 2, NA, d$exit))
    upper <- ifelse(d$event == 1, d$exit, NA)
    fit <- survreg(Surv(lower, upper, type = "interval2") ~ 1, control = list(rel.tolerance = 1e-12, maxiter = 100))
    say("inspected", c(exp(coef(fit)), 1 / fit$scale, fit$loglik[1]))
  }
}
