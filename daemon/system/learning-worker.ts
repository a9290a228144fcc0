import { runLearningJob } from "../../lib/tank/tank-learning-job.js";
import { answerJobs } from "./answer-jobs.js";

answerJobs(runLearningJob);
